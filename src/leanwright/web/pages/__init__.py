"""The pages of the workbench, by what they are about; each function answers one address."""
