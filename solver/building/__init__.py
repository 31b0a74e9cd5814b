"""What several mechanisms are built from: tabs, slots, strips, walls, holes, and the linkages that they share."""
