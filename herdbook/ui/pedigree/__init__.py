"""Pedigrees as pictures: ancestors, offspring, and how any two animals are related."""
