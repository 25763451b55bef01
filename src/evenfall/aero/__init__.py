"""Forces on given shapes at given angles."""
