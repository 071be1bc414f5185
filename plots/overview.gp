# The whole run at a glance: one small panel a quantity, one time axis for all.
set multiplot
load 'overview_1.gp'
load 'overview_words.gp'
plot 'tank_tan_mgN_L.dat' @band_1, \
     'tank_tan_caution_mgN_L.dat' @line_21, 'tank_tan_danger_mgN_L.dat' @line_22, \
     'tank_tan_mgN_L.dat' @line_1
load 'overview_2.gp'
plot 'tank_no2_mgN_L.dat' @band_2, 'tank_no2_danger_mgN_L.dat' @line_22, \
     'tank_no2_mgN_L.dat' @line_2
load 'overview_3.gp'
plot 'tank_nh3_mgN_L.dat' @band_1, 'tank_nh3_mgN_L.dat' @line_1
load 'overview_4.gp'
plot 'tank_o2_mg_L.dat' @band_1, 'tank_o2_mg_L.dat' @line_1
load 'overview_5.gp'
plot 'tank_ph.dat' @band_1, 'tank_ph.dat' @line_1
load 'overview_6.gp'
plot 'tank_alkalinity_mgCaCO3_L.dat' @band_1, 'tank_alkalinity_mgCaCO3_L.dat' @line_1
load 'overview_7.gp'
plot 'temperature_degC.dat' @band_1, 'temperature_degC.dat' @line_1
load 'overview_8.gp'
plot 'feed_g_d.dat' @band_1, 'feed_g_d.dat' @line_1
if (chlorine) {
    load 'overview_9.gp'
    plot 'tank_chlorine_mgCl2_L.dat' @band_1, 'tank_chlorine_mgCl2_L.dat' @line_1
}
unset multiplot
