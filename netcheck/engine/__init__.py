"""Simulation of circuits of primitive elements; knows nothing of netlists and valves."""
