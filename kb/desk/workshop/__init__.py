"""At the machine: work sheet, measures, field guide, sightings, and how they are printed."""
