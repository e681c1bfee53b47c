# SPDX-License-Identifier: MIT
# canplayer plays on one controller, nodoffd listens on the other: the
# recording holds what was sent, in order.
sender_up can1
i=0
time=1000
while [ $i -lt 400 ]; do
	printf '(%d.%06d) can1 %03X#%02X%02X\n' $((1000 + i / 200)) $((i % 200 * 5000)) \
		$((0x100 + i % 7)) $((i / 256)) $((i % 256))
	i=$((i + 1))
done > sent
printf '(1002.100000) can1 18FF1021#0102030405060708\n(1002.200000) can1 1A0#R\n(1002.300000) can1 1A1#\n' >> sent
start_daemon -i can0=500000 --group nodoff
check "the socket belongs to its owner and one group" equal "$(stat -c '%a %g' sock)" "660 900"
canplayer -I sent
wait_for 5 status_says 'listening, 403 frames'
check "all frames were heard" status_says 'can0: listening, 403 frames, 0 lost'
check "the list names the session" contains "$(nodoff record list)" '\(recording\) +20[0-9]+-'
path=$(nodoff record stop | tail -1)
zstdcat "$path"/frames-*.log.zst | grep -v '^#' > heard
cut -d' ' -f3 sent > sent.frames
cut -d' ' -f3 heard > heard.frames
check "IDs, data and order are those that were sent" same_file sent.frames heard.frames
check "the times do not go back" sort -c heard
check "canplayer reads the recording" canplayer -v -l 1 -I heard can1=can0
stop_daemon
finish
