"""Many runs side by side: the loop of one run, with a vector of numbers wherever it has a number.

A loop that is called with `Lanes` in place of the number of its lane is compiled with vectors: what it reads
from an array's last axis is then as many neighbouring numbers as there are lanes, and each formula is done
for all of them by the same instructions. No formula is written again.

What this asks of a formula: no branch on a number of the run but `choose`; ``&`` and ``|`` for ``and`` and
``or``.
"""

from __future__ import annotations

import math
import operator
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from llvmlite import ir
from numba.core import cgutils, types
from numba.core.typeconv import Conversion
from numba.core.typing.templates import AbstractTemplate, infer_global, signature
from numba.extending import (
    NativeValue,
    intrinsic,
    lower_builtin,
    lower_cast,
    models,
    overload,
    register_model,
    typeof_impl,
    unbox,
)
from numba.np.arrayobj import make_array


@dataclass(frozen=True, slots=True)
class Lanes:
    """So many neighbouring lanes from ``first`` on, as the lane of a loop."""

    first: int
    count: int


def choose(condition: Any, yes: Any, no: Any) -> Any:
    """Return ``yes`` where the condition holds, else ``no``; both are worked out."""
    return yes if condition else no


class _LanesType(types.Type):
    def __init__(self, count: int) -> None:
        self.count = count
        super().__init__(name=f"Lanes({count})")


class _Vector(types.Type):
    """As many numbers of one precision as there are lanes."""

    def __init__(self, element: types.Float, count: int) -> None:
        self.element, self.count = element, count
        super().__init__(name=f"Vector({element}, {count})")

    def can_convert_from(self, typingctx: Any, other: Any) -> Any:
        return Conversion.promote if other == self.element else None

    def unify(self, typingctx: Any, other: Any) -> Any:
        return self if other == self.element else None


class _Mask(types.Type):
    """One truth value a lane."""

    def __init__(self, count: int) -> None:
        self.count = count
        super().__init__(name=f"Mask({count})")

    def can_convert_from(self, typingctx: Any, other: Any) -> Any:
        return Conversion.promote if other == types.boolean else None

    def unify(self, typingctx: Any, other: Any) -> Any:
        return self if other == types.boolean else None


@register_model(_LanesType)
class _LanesModel(models.PrimitiveModel):
    def __init__(self, manager: Any, kind: _LanesType) -> None:
        super().__init__(manager, kind, ir.IntType(types.intp.bitwidth))


@register_model(_Vector)
class _VectorModel(models.PrimitiveModel):
    def __init__(self, manager: Any, kind: _Vector) -> None:
        element = ir.FloatType() if kind.element == types.float32 else ir.DoubleType()
        super().__init__(manager, kind, ir.VectorType(element, kind.count))


@register_model(_Mask)
class _MaskModel(models.PrimitiveModel):
    def __init__(self, manager: Any, kind: _Mask) -> None:
        super().__init__(manager, kind, ir.VectorType(ir.IntType(1), kind.count))


@typeof_impl.register(Lanes)
def _typeof_lanes(value: Lanes, context: Any) -> _LanesType:
    return _LanesType(value.count)


@unbox(_LanesType)
def _unbox_lanes(kind: _LanesType, value: Any, c: Any) -> NativeValue:
    first = c.pyapi.object_getattr_string(value, "first")
    native = c.unbox(types.intp, first)
    c.pyapi.decref(first)
    return NativeValue(native.value, is_error=native.is_error)


def _spread(builder: Any, number: Any, kind: Any) -> Any:
    """Return a number as a vector that holds it in every lane."""
    lane = ir.IntType(32)
    empty = ir.Constant(kind, ir.Undefined)
    one = builder.insert_element(empty, number, lane(0))
    order = ir.Constant(ir.VectorType(lane, kind.count), [0] * kind.count)
    return builder.shuffle_vector(one, empty, order)


@lower_cast(types.Float, _Vector)
@lower_cast(types.Boolean, _Mask)
def _cast_number(context: Any, builder: Any, fromty: Any, toty: Any, value: Any) -> Any:
    return _spread(builder, value, context.get_value_type(toty))


def _common(args: Any) -> _Vector | None:
    """Return the vector that all arguments, numbers of its precision among them, can become."""
    vectors = {kind for kind in args if isinstance(kind, _Vector)}
    if len(vectors) != 1:
        return None
    vector = vectors.pop()
    return vector if all(kind in (vector, vector.element) for kind in args) else None


def _formula(name: Any, count: int, build: Callable[..., Any], *, mask: bool = False) -> None:
    """Let a function or operator of numbers take vectors too."""

    class Template(AbstractTemplate):
        def generic(self, args: Any, kws: Any) -> Any:
            vector = _common(args) if len(args) == count else None
            if vector is None:
                return None
            return signature(_Mask(vector.count) if mask else vector, *[vector] * count)

    Template.__name__ = Template.__qualname__ = f"Vector_{getattr(name, '__name__', name)}"
    infer_global(name)(Template)

    def lower(context: Any, builder: Any, sig: Any, args: Any) -> Any:
        return build(builder, *args)

    lower_builtin(name, *[_Vector] * count)(lower)


def _call(name: str) -> Callable[..., Any]:
    """Return what calls an instruction of LLVM that has no operator."""

    def build(builder: Any, *args: Any) -> Any:
        kind = args[0].type
        element = "f32" if kind.element == ir.FloatType() else "f64"
        function = cgutils.get_or_insert_function(
            builder.module, ir.FunctionType(kind, [kind] * len(args)), f"llvm.{name}.v{kind.count}{element}"
        )
        return builder.call(function, args)

    return build


def _compared(sign: str) -> Callable[..., Any]:
    return lambda builder, a, b: builder.fcmp_ordered(sign, a, b)


for _operators, _instruction in (
    ((operator.add, operator.iadd), "fadd"),
    ((operator.sub, operator.isub), "fsub"),
    ((operator.mul, operator.imul), "fmul"),
    ((operator.truediv, operator.itruediv), "fdiv"),
):
    for _operator in _operators:
        _formula(_operator, 2, lambda builder, a, b, name=_instruction: getattr(builder, name)(a, b))
for _operator, _sign in ((operator.lt, "<"), (operator.le, "<="), (operator.gt, ">"), (operator.ge, ">=")):
    _formula(_operator, 2, _compared(_sign), mask=True)
_formula(operator.neg, 1, lambda builder, a: builder.fneg(a))
_formula(abs, 1, _call("fabs"))
_formula(math.sqrt, 1, _call("sqrt"))
_formula(math.copysign, 2, _call("copysign"))
_formula(min, 2, lambda builder, a, b: builder.select(builder.fcmp_ordered("<", a, b), a, b))
_formula(max, 2, lambda builder, a, b: builder.select(builder.fcmp_ordered(">", a, b), a, b))


def _both(name: Any, build: Callable[..., Any]) -> None:
    class Template(AbstractTemplate):
        def generic(self, args: Any, kws: Any) -> Any:
            if len(args) == 2 and isinstance(args[0], _Mask) and args[0] == args[1]:
                return signature(args[0], *args)
            return None

    infer_global(name)(Template)
    lower_builtin(name, _Mask, _Mask)(lambda context, builder, sig, args: build(builder, *args))


_both(operator.and_, lambda builder, a, b: builder.and_(a, b))
_both(operator.or_, lambda builder, a, b: builder.or_(a, b))


@infer_global(math.exp)
class _Exp(AbstractTemplate):
    def generic(self, args: Any, kws: Any) -> Any:
        return signature(args[0], *args) if isinstance(args[0], _Vector) else None


@lower_builtin(math.exp, _Vector)
def _exp(context: Any, builder: Any, sig: Any, args: Any) -> Any:
    """One lane after the other: no processor has an instruction for it."""
    kind = sig.return_type
    single = context.get_function(math.exp, signature(kind.element, kind.element))
    result, lane = args[0], ir.IntType(32)
    for i in range(kind.count):
        value = single(builder, [builder.extract_element(args[0], lane(i))])
        result = builder.insert_element(result, value, lane(i))
    return result


@intrinsic
def _select(typingctx: Any, condition: Any, yes: Any, no: Any) -> Any:
    vector = _common((yes, no))
    element = vector or _Vector(yes, condition.count)

    def build(context: Any, builder: Any, sig: Any, args: Any) -> Any:
        return builder.select(*args)

    return signature(element, condition, element, element), build


@overload(choose, jit_options={"forceinline": True})
def _choose(condition, yes, no):  # type: ignore[no-untyped-def]
    if isinstance(condition, _Mask):
        return lambda condition, yes, no: _select(condition, yes, no)
    return lambda condition, yes, no: yes if condition else no


def _is_lanes(array: Any, index: Any) -> bool:
    return (
        isinstance(array, types.Array)
        and isinstance(index, types.BaseTuple)
        and len(index) > 0
        and isinstance(index[-1], _LanesType)
    )


def _place(context: Any, builder: Any, array_type: Any, index_type: Any, array: Any, index: Any) -> Any:
    """Return where in memory the lanes of a row begin."""
    places = [
        context.cast(builder, value, kind, types.intp) if isinstance(kind, types.Integer) else value
        for value, kind in zip(cgutils.unpack_tuple(builder, index), index_type, strict=True)
    ]
    at = cgutils.get_item_pointer(
        context, builder, array_type, make_array(array_type)(context, builder, array), places
    )
    vector = context.get_value_type(_Vector(array_type.dtype, index_type[-1].count))
    return builder.bitcast(at, vector.as_pointer())


@intrinsic
def _read(typingctx: Any, array: Any, index: Any) -> Any:
    def build(context: Any, builder: Any, sig: Any, args: Any) -> Any:
        at = _place(context, builder, *sig.args, *args)
        return builder.load(at, align=array.dtype.bitwidth // 8)

    return signature(_Vector(array.dtype, index[-1].count), array, index), build


@intrinsic
def _write(typingctx: Any, array: Any, index: Any, value: Any) -> Any:
    vector = _Vector(array.dtype, index[-1].count)

    def build(context: Any, builder: Any, sig: Any, args: Any) -> Any:
        at = _place(context, builder, *sig.args[:2], *args[:2])
        builder.store(args[2], at, align=array.dtype.bitwidth // 8)
        return context.get_dummy_value()

    return signature(types.void, array, index, vector), build


@overload(operator.getitem, jit_options={"forceinline": True})
def _getitem(array, index):  # type: ignore[no-untyped-def]
    return (lambda array, index: _read(array, index)) if _is_lanes(array, index) else None


@overload(operator.setitem, jit_options={"forceinline": True})
def _setitem(array, index, value):  # type: ignore[no-untyped-def]
    return (lambda array, index, value: _write(array, index, value)) if _is_lanes(array, index) else None
