"""What a plant yields in years to come: likely and cautious, month by month, as it ages."""
