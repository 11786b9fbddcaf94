"""Mainline routes: cheapest trees of blank tube from a tap to header inlets over the places tube may go."""
