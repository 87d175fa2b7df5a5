"""While the flask drips: signs in the log and what they mean."""
