"""How often something else is entered than was there to be seen, and it stays so."""

P_MISTAPPED = 0.003
"""A look, a sign of a run or a whole run is entered as something else: the usual chance of picking the wrong one of
like controls (A. D. Swain and H. E. Guttmann, NUREG/CR-1278, 1983; from memory), and the pooled error rate of single
data entry, 0.29 % (M. Y. Garza et al., Error rates of data processing methods in clinical research, 2025)."""

P_WRONG_SIDE = 0.01
"""A number is taken, read or entered on the wrong side of a limit: a wrong pin, a poor contact, a wrong range
(estimate).  Reading a digital meter alone is wrong once in a thousand times (NUREG/CR-1278; from memory)."""
