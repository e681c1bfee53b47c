# SPDX-License-Identifier: MIT
# CAN FD: a map with a data bitrate sets the adapter up for it, listen-only; an adapter that
# cannot says so. can4 and can5 can, can0 and can1 cannot. Their driver is none of the stock
# kernel's: it is loaded here, behind all other cases.
[ -e /modules/ctucanfd.ko ] || leave_out "there is no driver for CAN FD"
insmod /modules/ctucanfd.ko
insmod /modules/ctucanfd_pci.ko
wait_for 5 test -e /sys/class/net/can5
cat > car.yaml <<'YAML'
networks:
  drive: { interfaces: [can4], bitrate: 500000, data bitrate: 2 Mbit/s, sample point: 80 %, data sample point: 70 % }
  body: { interfaces: [can0], bitrate: 500000, data bitrate: 2 Mbit/s }
YAML
ip link set can5 type can bitrate 500000 sample-point 0.8 dbitrate 2000000 dsample-point 0.7 fd on
ip link set can5 up
sender_up can1
start_daemon --vehicle car.yaml
mode=$(ip -d link show can4 | tr '\n' ' ')
check "it is set up for CAN FD, listen-only" contains "$mode" '<LISTEN-ONLY[^ ]*,FD>'
check "with both bitrates and sample points" contains "$mode" \
	'[^d]bitrate 500000 sample-point 0.800 .*dbitrate 2000000 dsample-point 0.700'
check "libsocketcan reads listen-only of it" contains "$(read-interface can4)" '500000 bit/s, listen-only'
check "record status shows it" status_says \
	'500000 bit/s \(sample point 80.0 %\), CAN FD with 2000000 bit/s \(sample point 70.0 %\); listen-only'
for i in $(seq 4); do
	cansend can5 12$((i % 10))##1112233445566778899AABBCC
	cansend can5 22$((i % 10))##0112233
	cansend can5 32$((i % 10))#1122
done
wait_for 5 status_says 'can4: listening, 12 frames'
check "FD frames with and without a fast data phase and classical ones are heard" \
	status_says 'can4: listening, 12 frames, 0 lost, 0 error'
check "nothing was sent" equal "$(counter can4 tx_packets) $(counter can4 tx_dropped) $(counter can5 rx_packets)" "0 0 0"
check "an adapter that cannot is used for the classical frames, and it is said" status_says \
	'can0: listening, 0 frames.*can0 cannot do CAN FD.*not heard'
check "it is listen-only" contains "$(ip -d link show can0)" '<.*LISTEN-ONLY.*>'
cansend can1 111#22
wait_for 5 status_says 'can0: listening, 1 frames'
check "which it hears" status_says 'can0: listening, 1 frames'
path=$(nodoff record stop | tail -1)
zstdcat "$path"/frames-*.log.zst > heard
check "the recording has the FD frames as they were" equal "$(grep -c ' 12[0-9]##1112233445566778899AABBCC' heard) \
$(grep -c ' 22[0-9]##0112233$' heard) $(grep -c ' 32[0-9]#1122$' heard)" "4 4 4"
stop_daemon

# Up by somebody else with another data bitrate: used for what it hears, and said.
ip link set can4 down
ip link set can4 up type can bitrate 500000 dbitrate 5000000 fd on listen-only on
start_daemon --vehicle car.yaml
check "another data bitrate is said" status_says 'can4: listening.*5000000 bit/s, by the map it is 2000000'
stop_daemon
finish
