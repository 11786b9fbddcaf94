"""The choice: bounds, zone splits, cutting and the search over designs, with a certificate."""
