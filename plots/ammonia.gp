# The un-ionised part of the ammonia: it, not the total, decides whether fish are harmed.
set multiplot
load 'ammonia_1.gp'
load 'ammonia_words.gp'
plot 'tank_nh3_mgN_L.dat' @band_1, 'tank_nh3_mgN_L.dat' @line_1
unset multiplot
