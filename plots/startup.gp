# The start-up of a filter: ammonia rises and falls, then nitrite, and only nitrate stays. Beside the
# values that make a filter ready stand the limits of the fish.
set multiplot
load 'startup_1.gp'
load 'startup_words.gp'
plot 'startup_tank_tan_mgN_L.dat' @band_1, \
     'startup_tank_tan_caution_mgN_L.dat' @line_21, 'startup_tank_tan_danger_mgN_L.dat' @line_22, \
     'startup_tank_tan_mgN_L.dat' @line_1
load 'startup_2.gp'
plot 'startup_tank_no2_mgN_L.dat' @band_2, 'startup_tank_no2_danger_mgN_L.dat' @line_22, \
     'startup_tank_no2_mgN_L.dat' @line_2
load 'startup_3.gp'
plot 'startup_tank_nh3_mgN_L.dat' @band_1, 'startup_tank_nh3_mgN_L.dat' @line_1
load 'startup_4.gp'
plot 'startup_tank_no3_mgN_L.dat' @band_3, 'startup_tank_no3_mgN_L.dat' @line_3
unset multiplot
