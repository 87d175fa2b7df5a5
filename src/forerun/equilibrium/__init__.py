"""Boiling behaviour of mixtures: activity, association, bubble and dew points, azeotropes."""
