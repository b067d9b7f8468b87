"""Its place puts this folder on the import path: ``from signals import helmholtz``, ``import factories``."""
