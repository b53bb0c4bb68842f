"""The trade's arithmetic: plain Python and numpy, no Django, no clock, no I/O."""
