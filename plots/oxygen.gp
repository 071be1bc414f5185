# Oxygen where the fish are and where the tower gives the water back, with what the water could
# hold; and the green water that makes and takes it, where there is any.
set multiplot
load 'oxygen_1.gp'
load 'oxygen_words.gp'
plot 'tank_o2_mg_L.dat' @band_1, 'tower_out_o2_mg_L.dat' @band_2, \
     'tank_o2_saturation_mg_L.dat' @line_4, 'tower_out_o2_mg_L.dat' @line_2, \
     'tank_o2_mg_L.dat' @line_1
if (green) {
    load 'oxygen_2.gp'
    plot 'tank_algae_mgCOD_L.dat' @band_3, 'tank_algae_mgCOD_L.dat' @line_3
}
unset multiplot
