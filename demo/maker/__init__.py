"""The parts of the demo's generator: ground, wells, water, visits and what three laboratories make of them."""
