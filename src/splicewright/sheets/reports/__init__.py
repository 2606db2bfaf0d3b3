"""Reports, each as PDF."""
