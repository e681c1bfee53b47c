# SPDX-License-Identifier: MIT
# nodoff wait returns when a network wakes, sleeps, or its deadline passes.
cat > car.yaml <<'YAML'
networks:
  body: { interfaces: [can0], bitrate: 500000, sleeps within: 4 s, quiet time: 1 s }
YAML
sender_up can1
start_daemon --vehicle car.yaml
nodoff mark locked > /dev/null
nodoff wait --for wake > woke &
waiting=$!
sleep 1
cangen can1 -g 50 -I 2A0 -n 30
wait $waiting
check "it returns when the network wakes" equal "$? $(cat woke)" "0 body woke up"
nodoff wait --for sleep --bell --run 'echo "$NODOFF_NETWORK $NODOFF_EVENT" > ran' > slept
check "and when it sleeps, rings and runs a command" equal "$(cat slept) $(cat ran)" \
	"$(printf '\a')body fell asleep body sleep"
nodoff wait --for deadline > passed &
waiting=$!
sleep 1
nodoff mark locked > /dev/null
wait_for 20 test ! -d /proc/$waiting
check "and when the deadline has passed" equal "$(cat passed)" "body has passed its settle deadline"
stop_daemon
finish
