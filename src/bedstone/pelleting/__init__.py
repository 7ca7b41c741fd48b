"""The pellet line up to the die: steam, conditioner, heat damage, die and knives, durability."""
