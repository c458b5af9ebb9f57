"""What a meter reads on a chassis whose parts are as they are: many chassis in one call.

A chassis in some condition is a row of coordinates (`coordinates`): what each part really is,
where the pots stood, how far off the meter is. `readout.Readout` turns many rows into the
readings they give, with the derivative by every coordinate. Behind the rectifier this is linear
algebra (`nodal`); the rectifier's port is a family of curves simulated by ngspice beforehand
(`front`).
"""
