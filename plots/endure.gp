# Oxygen in the hours after a failure: from few fish (dark) to many (light), each with its own dashes
# and its name where it leaves the picture.
load 'endure_curves.gp'
do for [i = 1 : curves] {
    share = curves > 1 ? (i - 1.0) / (curves - 1) : 0
    set style line 200 + i linewidth 2.4 dashtype 11 + (i - 1) % 5 \
        linecolor rgb int(15 + 190 * share) * 65536 + int(60 + 50 * share) * 256 + int(130 - 110 * share)
}
load 'endure_1.gp'
plot for [i = 1 : curves] sprintf('course_%d.dat', i) using 1:2 with lines linestyle 200 + i notitle
