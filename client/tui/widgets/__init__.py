"""What a screen is made of: drawings of the model, with no state of the game in them."""
