"""Speed and memory, measured: ``python -m bench`` from the checkout."""
