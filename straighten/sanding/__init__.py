"""Room `sanding`: takes the shape and the head, gives the sanding plan and what the removed metal does; does not know the book."""
