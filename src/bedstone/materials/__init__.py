"""What materials are: composition, physical properties, sorption, moist air. Values with sources."""
