"""Tests of cores, windings and what is predicted from them."""
