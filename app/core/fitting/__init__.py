"""Making an over-full plan fit: which sowing day, which light place and how many plants each sowing gets."""
