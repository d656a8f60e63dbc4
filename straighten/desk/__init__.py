"""Room `desk`: the whole way on one page, where the rooms are chained and the learning loop closes.

new       -> a head file to fill in
measure   -> survey file + head          -> entry "survey"
check     -> survey                      -> go / no-go
plan      -> surveys + passes -> belief  -> next pass card, entry "plan"
log       -> what was done + readings    -> entry "pass"; the next plan has learned from it
decide    -> belief + prices             -> heat again, sand now, hand it on; entry "decision"
try       -> one set-up on one head      -> what it would do; nothing recorded
"""
