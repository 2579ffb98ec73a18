"""The systems that an example program prints, as matrices."""

import numpy


def matrices(system, values):
    """G and C of a row of parameter values each, `values x unknowns x unknowns`."""
    values = numpy.atleast_2d(numpy.array(values))
    size = system["unknowns"]
    g, c = (numpy.zeros((len(values), size, size)) for _ in range(2))
    for kind, number, dynamic, rows, columns in system["stamps"]:
        value = {"constant": lambda: number, "parameter": lambda: values[:, number], "reciprocal": lambda: 1 / values[:, number]}[kind]()
        for i, u in rows:
            for j, v in columns:
                (c if dynamic else g)[:, i, j] += value * u * v
    return g, c
