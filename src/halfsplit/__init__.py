"""halfsplit: find every fault of a desktop PC for the least bench time, money and risk."""
