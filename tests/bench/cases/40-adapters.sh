# SPDX-License-Identifier: MIT
# Two networks at once; adapters that go down, are pulled out, come back.
cat > car.yaml <<'YAML'
networks:
  body: { interfaces: [can0], bitrate: 500000, sleeps within: 1 h, quiet time: 2 s }
  comfort: { interfaces: [can2], bitrate: 125000, sleeps within: 1 h, quiet time: 2 s }
YAML
sender_up can1
sender_up can3 125000
start_daemon --vehicle car.yaml
check "each network has its bitrate" contains "$(ip -d link show can2)" 'bitrate 125000'
cangen can1 -g 5 -I 2A0 -L 8 -n 200 &
one=$!
cangen can3 -g 5 -I 18FF0010 -e -L 8 -n 200
wait $one
wait_for 5 status_says 'can2: listening, 200 frames'
check "both are heard at once, without loss" contains "$(nodoff record status | tr '\n' ' ')" \
	'can0: listening, 200 frames, 0 lost.* can2: listening, 200 frames, 0 lost'

# Switched off and on.
ip link set can0 down
wait_for 5 status_says 'can0: switched off'
check "an interface that goes down is noticed" status_says 'can0: switched off'
sleep 1
ip link set can0 up
wait_for 5 status_says 'can0: listening'
cansend can1 111#22
wait_for 5 status_says 'can0: listening, 201 frames'
check "it is heard again when it is up" status_says 'can0: listening, 201 frames'
check "the gap is in the journal" grep -qE '^\([0-9.]+\) gap can0 [0-9.]+ s$' sessions/*/journal.log

# Renamed: the kernel's number stays, the recording's name too.
ip link set can0 down
ip link set can0 name obd0
ip link set obd0 up
wait_for 5 status_says 'can0: listening'
cansend can1 111#33
wait_for 5 status_says 'can0: listening, 202 frames'
check "renamed, it goes on" status_says 'can0: listening, 202 frames.*now called obd0'
ip link set obd0 down
ip link set obd0 name can0
ip link set can0 up
wait_for 5 status_says 'can0: listening'

# Pulled out and plugged in again: set up anew, listen-only.
slot=$(basename "$(readlink -f /sys/class/net/can2/device)")
echo 1 > "/sys/bus/pci/devices/$slot/remove"
wait_for 5 status_says 'can2: not plugged in'
check "an adapter that is gone is noticed" status_says 'can2: not plugged in'
deaf_told() { grep -qE '^\([0-9.]+\) not listening can2$' sessions/*/journal.log; }
wait_for 1 deaf_told
check "that nobody listens is on the disk at once" deaf_told
sleep 4
check "it is not taken for sleep" contains "$(nodoff analyse --full sessions/*/)" '[Nn]obody has listened to'
echo 1 > /sys/bus/pci/rescan
wait_for 10 status_says 'can2: listening'
check "it comes back by itself" status_says 'can2: listening'
check "listen-only, with its bitrate" contains "$(ip -d link show can2 | tr '\n' ' ')" \
	'<.*LISTEN-ONLY.*> .*bitrate 125000'
cansend can3 222#44
wait_for 5 status_says 'can2: listening, 201 frames'
check "and is heard" status_says 'can2: listening, 201 frames'
nodoff record stop --json > stopped
path=$(grep -o '"path": *"[^"]*"' stopped | cut -d'"' -f4)
printf '%b' "$(grep -o '"text": *"[^"]*"' stopped | cut -d'"' -f4)" > live
nodoff analyse --full "$path" > replayed
check "with gaps, too, live and replayed answers are the same" same_file live replayed
check "a gap is told as a limit of the answer" grep -qiE 'nobody listened|gap' replayed
check "the recording has what came after" contains "$(zstdcat "$path"/frames-*.log.zst)" 'can2 222#44'
check "the gap begins where nobody listened any more" equal "$(awk '/ not listening can2$/ {
	gsub(/[()]/, "", $1); deaf = $1 }
	/ gap can2 / && deaf { gsub(/[()]/, "", $1); off = $1 - $4 - deaf; if (off > 0.001 || off < -0.001) wrong++; seen++ }
	END { print wrong + 0, seen }' "$path/journal.log")" "0 1"
stop_daemon
finish
