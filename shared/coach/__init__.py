"""The coach: how strong a rack is and what each legal pass is worth.

The only part of shared that uses numpy. What goes in is what a player in the seat would know: the own rack, what went
and came, and the card. No function takes another rack or the wall.
"""
