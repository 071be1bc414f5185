# pH above, and below it the alkalinity that holds it up.
set multiplot
load 'ph_alkalinity_1.gp'
load 'ph_alkalinity_words.gp'
plot 'tank_ph.dat' @band_1, 'tank_ph.dat' @line_1
load 'ph_alkalinity_2.gp'
plot 'tank_alkalinity_mgCaCO3_L.dat' @band_1, 'tank_alkalinity_mgCaCO3_L.dat' @line_1
unset multiplot
