"""Figures as SVG, one function a figure; every mark has its place from a number of the answer."""
