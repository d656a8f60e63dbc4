"""Room `sheet`: takes finished results, gives text, figures and pages; computes nothing."""
