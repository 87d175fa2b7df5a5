"""The run sheet: what is in the flask, in which glass, heated how, for what aim."""
