# Ammonia and nitrite, which poison, and nitrate, which only builds up: each with its own limits alone.
set multiplot
load 'nitrogen_1.gp'
load 'nitrogen_words.gp'
plot 'tank_tan_mgN_L.dat' @band_1, \
     'tank_tan_caution_mgN_L.dat' @line_21, 'tank_tan_danger_mgN_L.dat' @line_22, \
     'tank_tan_mgN_L.dat' @line_1
load 'nitrogen_2.gp'
plot 'tank_no2_mgN_L.dat' @band_2, 'tank_no2_danger_mgN_L.dat' @line_22, \
     'tank_no2_mgN_L.dat' @line_2
load 'nitrogen_3.gp'
plot 'tank_no3_mgN_L.dat' @band_3, 'tank_no3_mgN_L.dat' @line_3
unset multiplot
