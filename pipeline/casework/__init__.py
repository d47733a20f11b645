"""The box itself: six boards, glued shut and sawn apart along the opening."""
