"""Least times along paths by toppra, a general-purpose library of time-optimal trajectories.

Reads lines of JSON: points in mm, feed in mm/s, rates and accelerations of each axis; prints the seconds of each.
The way itself is a fourth coordinate, so that the feed is one more limit of speed.
"""
import json
import sys

import numpy as np
import toppra
import toppra.algorithm
import toppra.constraint

toppra.setup_logging("ERROR")


def seconds(case):
    points = np.array(case["points"], dtype=float)
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    way = np.concatenate([[0.0], np.cumsum(steps)])
    path = toppra.SplineInterpolator(way, np.column_stack([points, way]), bc_type="natural")
    rates = np.array(case["rates"] + [case["feed"]])
    accelerations = np.array(case["accelerations"] + [1.0e9])
    limits = [
        toppra.constraint.JointVelocityConstraint(np.column_stack([-rates, rates])),
        toppra.constraint.JointAccelerationConstraint(np.column_stack([-accelerations, accelerations])),
    ]
    grid = np.linspace(0.0, way[-1], 3001)
    found = toppra.algorithm.TOPPRA(limits, path, gridpoints=grid, solver_wrapper="seidel", parametrizer="ParametrizeConstAccel")
    return found.compute_trajectory(0.0, 0.0).duration


for line in sys.stdin:
    print(seconds(json.loads(line)))
