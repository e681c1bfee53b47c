# SPDX-License-Identifier: MIT
# The live view on a terminal of 80x24: what it shows, keys, resizing, and a
# clean terminal afterwards.
cat > car.yaml <<'YAML'
networks:
  body: { interfaces: [can0], bitrate: 500000, sleeps within: 1 h, quiet time: 2 s }
  comfort: { interfaces: [can2], bitrate: 125000, sleeps within: 1 h, quiet time: 2 s }
YAML
sender_up can1
start_daemon --vehicle car.yaml
screen() { tmux -L bench capture-pane -p; }
shows() { contains "$(screen)" "$1"; }
ends_with_keys() { contains "$(screen | tail -1)" '^l:locked '; }
echo 'set -g default-terminal screen' > tmux.conf
tmux -L bench -f tmux.conf new-session -d -x 80 -y 24 "bash --norc"
background+=("$(tmux -L bench display-message -p '#{pid}')")
tmux -L bench send-keys "PS1='shell: '; NODOFF_SOCKET=$NODOFF_SOCKET nodoff live" Enter
cangen can1 -g 20 -I 2A0 -L 8 & # until everything was seen, however slow the machine is
sender=$!
background+=("$sender")
wait_for 10 shows '^body \(can0\) +awake'
check "a network that talks is awake, with its time left and load" shows \
	'^body \(can0\) +awake +[0-9.]+ m?s +59 min [0-9]+ s +[0-9.]+ %$'
check "a silent one is not called asleep" shows '^comfort \(can2\) +nothing heard here'
check "with the ways to tell" shows 'Nothing heard is not asleep: measure the pins'
check "who is suspected waits for the deadline" shows 'suspects: settling, wait 59 min'
check "the recording is shown" shows 'nodoff live +[0-9:]+ +recording'
check "the keys are named" shows '^l:locked .*i:isolated .*q:quit \?$'
tmux -L bench send-keys l
wait_for 5 shows 'press l again'
check "a key that begins a watch anew asks once" shows 'press l again'
tmux -L bench send-keys l
wait_for 5 shows 'in the journal: locked'
check "a key puts a mark into the journal" grep -qE '^\([0-9.]+\) locked$' sessions/*/journal.log
tmux -L bench send-keys i
wait_for 5 shows 'isolated \(fuse or module\):'
tmux -L bench send-keys -l 'F12x'
tmux -L bench send-keys BSpace Enter
wait_for 5 shows 'in the journal: isolated F12'
check "a prompt takes what was isolated" grep -qE '^\([0-9.]+\) isolated F12$' sessions/*/journal.log
nodoff mark reading F12 2.3 mV > marked
check "a mark from another terminal is on the disk when it returns" \
	grep -qF "$(cat marked)" sessions/*/journal.log
wait_for 5 shows 'reading F12 2.3 mV'
check "and shown" shows 'reading F12 2.3 mV'
kill "$sender"
wait_for 10 shows '^body \(can0\) +asleep'
check "silence after talk is sleep" shows '^body \(can0\) +asleep'
ip link set can0 down
wait_for 5 shows '^body \(can0\) +not listening'
check "a switched-off interface is not called asleep" shows 'can0: switched off'
tmux -L bench resize-window -x 60 -y 16
wait_for 5 ends_with_keys
check "it follows the size of the terminal" ends_with_keys
check "on a small screen the state still shows" shows '^body \(can0\) +not listening'
tmux -L bench resize-window -x 80 -y 24
tmux -L bench send-keys q
wait_for 5 shows '^shell:'
check "it leaves the terminal clean" equal "$(screen | grep -c 'recording .*frames\|q:quit') $(screen | grep -c '^shell:')" "0 1"
tmux -L bench send-keys 'stty -a' Enter
wait_for 5 shows 'icanon'
check "and its modes as they were" shows '(^| )icanon '
check "echo is on again" shows '(^| )echo '
tmux -L bench kill-server
nodoff live --plain > plain &
plain=$!
wait_for 5 grep -q 'can0: switched off' plain
check "the line mode says the same" grep -qE '^[0-9:]+ comfort: nothing heard here' plain
stop_daemon
wait $plain
check "it ends when the daemon does" equal "$?" 4
finish
