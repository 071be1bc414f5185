# Ammonia and nitrite, which poison, on one scale; nitrate, which only builds up, on its own.
set multiplot
load 'nitrogen_1.gp'
load 'nitrogen_words.gp'
plot 'tank_tan_mgN_L.dat' @band_1, 'tank_no2_mgN_L.dat' @band_2, \
     'tank_tan_caution_mgN_L.dat' @line_21, 'tank_tan_danger_mgN_L.dat' @line_22, \
     'tank_no2_danger_mgN_L.dat' @line_22, \
     'tank_tan_mgN_L.dat' @line_1, 'tank_no2_mgN_L.dat' @line_2
load 'nitrogen_2.gp'
plot 'tank_no3_mgN_L.dat' @band_3, 'tank_no3_mgN_L.dat' @line_3
unset multiplot
