"""Every rule on a captured conversation, one file per subject, and the audit that asks them."""
