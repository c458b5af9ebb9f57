"""Tests of `netcheck bench`: the session at the bench."""
