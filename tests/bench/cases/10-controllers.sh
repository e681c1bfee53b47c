# SPDX-License-Identifier: MIT
# The bench itself: a listen-only controller hears the other node and cannot send.
ip link set can0 type can bitrate 500000 listen-only on
ip link set can0 up
sender_up can1
candump -L -n 3 can0 > heard &
listener=$!
sleep 0.3
cansend can1 123#1122
cansend can1 12345678#11223344
cansend can1 7FF#R
wait_for 5 test "$(wc -l < heard)" = 3
wait $listener
check "frames arrive in order" equal "$(cut -d' ' -f3 heard | tr '\n' ' ')" \
	"123#1122 12345678#11223344 7FF#R "
cansend can0 456#00
check "the listen-only controller drops what is sent" equal "$(counter can0 tx_dropped)" 1
check "nothing left it" equal "$(counter can0 tx_packets)" 0
check "the other node heard nothing" equal "$(counter can1 rx_packets)" 0
finish
