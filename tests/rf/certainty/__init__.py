"""How often the truth lies inside the stated uncertainty; models written apart from the code under test."""
