"""forerun: a forecast for bench distillation."""
