"""What a rig's computer lacks, and how to mend it; looking changes nothing."""
