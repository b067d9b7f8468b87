"""Published limits in closed form, one module per publication, named author_year.

Plain scalars in, a float out. Symbols follow the sources:

=========  =======================================================  =========
beta       bow-bridge distance / sounding length                    0 to 0.5
Z0         transverse wave impedance of the string                  kg/s
vb, v0     bow speed                                                m/s
F          normal bow force, the bow's weight on the string         N
mu_s       coefficient of friction while sticking                   1
mu_d       coefficient of friction while sliding                    1
dmu        mu_s - mu_d                                              1
R          resistance of the bridge as the string meets it          kg/s
a          acceleration of the bow from rest                        m/s^2
f0, P      frequency of the note, its period 1/f0                   Hz, s
=========  =======================================================  =========
"""
