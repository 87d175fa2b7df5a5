"""Flasks, columns, condensers, baths: data of the drawer and their small physics."""
