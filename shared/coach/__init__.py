"""The coach: how strong a rack is and what each legal pass is worth.

The only part of shared that uses numpy. Its input is what a player in the seat knows: their own rack, the tiles they
passed and received, and the card. No function may take another rack or the wall.
"""
