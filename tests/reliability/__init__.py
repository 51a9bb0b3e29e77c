"""What holds whatever happens: broken input, kills, full disks, long use."""
