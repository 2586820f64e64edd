"""Closed solids: checked booleans and the primitives the hardware is made of."""
