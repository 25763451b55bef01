"""Learning from flights: corrections of the engine with what is still open about them."""
