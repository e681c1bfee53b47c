# SPDX-License-Identifier: MIT
# nodoff bitrate listens only. (QEMU's controllers hear each other at any rate,
# so that which rate is right cannot be shown here.)
sender_up can1
before=$(counter can1 rx_packets)
cangen can1 -g 20 -I 2A0 -L 8 -n 400 &
background+=("$!")
check "it hears frames and names the rate" contains "$(nodoff bitrate can0 --seconds 1 250000)" \
	'can0 runs at 250000 bit/s'
check "it leaves the interface down and listen-only" contains "$(ip -d link show can0 | tr '\n' ' ')" \
	'state DOWN.*<LISTEN-ONLY'
check "nothing was sent" equal "$(counter can1 rx_packets)" "$before"
ip link set can0 type can bitrate 500000 listen-only off
ip link set can0 up
nodoff bitrate can0 --seconds 1 > said 2>&1
check "an interface that acknowledges is not taken" equal "$?" 4
check "it is said why" grep -q 'up and not listen-only' said
check "and it is left as it was" contains "$(ip link show can0)" 'state UP'
ip link set can0 down
ip link set can0 up type can bitrate 500000 listen-only on
candump can0 > /dev/null &
background+=("$!")
wait_for 5 grep -q ' can0 ' /proc/net/can/rcvlist_all
nodoff bitrate can0 --seconds 1 > said 2>&1
check "an interface that is listened to is not taken" equal "$?" 4
check "it is said why" grep -q 'another program listens to can0' said
check "and it is left as it was" contains "$(ip link show can0)" 'state UP'
kill "${background[-1]}"
wait_for 5 grep -q 'can0: no entry' /proc/net/can/rcvlist_all
check "one that was up and listen-only is used" contains "$(nodoff bitrate can0 --seconds 1 250000)" \
	'can0 runs at 250000 bit/s'
check "and left as it was" contains "$(ip -d link show can0 | tr '\n' ' ')" 'state UP.*<LISTEN-ONLY.*bitrate 500000'
ip link set can0 down
check "a silent network has no rate" equal "$(nodoff bitrate can2 --seconds 1 500000 > said; echo $?)" 1
check "with advice" grep -q 'nothing was heard whole' said
check "an interface that is not there is said" contains "$(nodoff bitrate can9 2>&1)" 'no CAN interface can9'
finish
