"""What a zirconia oxygen probe's emf says of the gas: oxygen, and air against what the wood needs; pure."""
