"""How the shipped acoustic model is made: sentences, voices, sound changes, network, training, export.

Nothing here is needed to hear; README.md in this folder is the recipe.
"""
