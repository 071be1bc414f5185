# Oxygen where the fish are and where the tower gives the water back, with what the water could
# hold.
set multiplot
load 'oxygen_1.gp'
load 'oxygen_words.gp'
plot 'tank_o2_mg_L.dat' @band_1, 'tower_out_o2_mg_L.dat' @band_2, \
     'tank_o2_saturation_mg_L.dat' @line_4, 'tower_out_o2_mg_L.dat' @line_2, \
     'tank_o2_mg_L.dat' @line_1
unset multiplot
