"""How things are said: text made safe, lines that fit, quantities as the maker likes them."""
