# Variants laid over each other. Every line has its own colour and its own dashes, so that they can be
# told apart in grey, too.
hues = '#0b4f8a #d55e00 #5b2a86 #3d7a2a #8a5a00 #b03060 #007a7a #555555 #2f6fd0 #a04000 #7a7a00 #202020'
do for [i = 1 : 12] {
    set style line 200 + i linewidth 2 dashtype 11 + (i - 1) % 5 linecolor rgb word(hues, i)
}
set multiplot
load 'compare_1.gp'
plot for [i = 1 : variants] sprintf('laid_%d_1.dat', i) using 1:2 with lines linestyle 200 + i notitle
do for [q = 2 : panels] {
    load sprintf('compare_%d.gp', q)
    plot for [i = 1 : variants] sprintf('laid_%d_%d.dat', i, q) using 1:2 with lines linestyle 200 + i notitle
}
unset multiplot
