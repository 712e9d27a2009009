"""An independent oracle: DC operating points of switch, lamp and coil banks with real diode models, from neospice.

Nothing here imports `matrixcheck.diagnosis`. A bank is read from the layout's TOML by itself, a fault is put into the
wiring as it would be at the machine (a cut wire, a welded transistor, two conductors that touch), and readings are what
a voltmeter and a lamp's current would say.
"""
