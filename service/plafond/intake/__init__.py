"""Reads documents into findings. Takes bytes and the vocabulary; knows no rule."""
