"""The coach: how strong a rack is and what each legal pass is worth.

The only part of shared that uses numpy. Everything here is computed from what one seat could see at that moment:
its rack, what it passed, what it received, and the card. No function takes another rack or the wall.
"""
