"""Papers as PDF: batch sheets, flush sheets, the day sheet; and the picture of the day."""
