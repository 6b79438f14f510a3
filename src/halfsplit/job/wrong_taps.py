"""How often something else is entered than was there to be seen, and it stays so."""

P_MISTAPPED = 0.003
"""A look, a sign of a run or a whole run is entered as something else: the usual chance of picking the wrong one of
like controls (A. D. Swain and H. E. Guttmann, NUREG/CR-1278, 1983; from memory), and the pooled error rate of single
data entry, 0.29 % (M. Y. Garza et al., Error rates of data processing methods in clinical research, 2025)."""

P_MISNOTED = 0.001
"""A number is read or entered on the wrong side of a limit: reading and noting a digital meter (NUREG/CR-1278; from
memory)."""
