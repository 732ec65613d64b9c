# Completions of hangtrue and hangtrued for bash. Written by tools/docs; change what it is written from.
_hangtrue() {
  local current=${COMP_WORDS[COMP_CWORD]} words=
  case "${COMP_WORDS[1]}" in
    new)
      case "${COMP_WORDS[2]}" in
        run) words="--help --title --show --length --width --carries --left --right --mass --mass-later --force --no-questions" ;;
        kit) words="--help --speaks --port --laser --laser-port --force --no-questions" ;;
        *) words="--help run kit" ;;
      esac
      [ "$COMP_CWORD" -eq 2 ] && words="--help run kit"
      ;;
    check)
      words="--help --json"
      ;;
    explain)
      words="--help --all --json"
      words+=" instrument.address instrument.ask instrument.baud instrument.calibration instrument.calibration.certificate instrument.calibration.date instrument.calibration.due instrument.channel.base instrument.channel.edge instrument.channel.gives instrument.channel.range instrument.channel.scale instrument.channel.scale_checked instrument.channel.settle instrument.channel.settle.spread instrument.channel.settle.window instrument.channel.sigma instrument.channel.sign instrument.channel.station instrument.channel.transducer instrument.channel.type instrument.channel.unit instrument.channel.within instrument.channel.words instrument.channel.zero_keeps instrument.channel.zero_sigma instrument.every instrument.name instrument.parity instrument.port instrument.retries instrument.speaks instrument.stop_bits instrument.talker instrument.timeout language length load.across load.at load.couple load.depth load.from load.mass load.name load.permanent load.sigma load.to load.warmer_below load.weight load.weight_per_length mark.at mark.name material.NAME.E material.NAME.G material.NAME.creep material.NAME.creep.grade material.NAME.creep.material material.NAME.creep.service_class material.NAME.density material.NAME.expansion material.NAME.grade material.NAME.k_def material.NAME.service_class member.across member.acts member.from member.material member.name member.section member.section.EI member.section.EIw member.section.GA member.section.GJ member.section.corner member.section.depth member.section.diameter member.section.flange member.section.inside_corner member.section.root member.section.shape member.section.shear_area member.section.thickness member.section.upright member.section.wall member.section.web member.section.weight_per_length member.section.width member.to member.up member.weight_sigma prior.bending prior.bow prior.bows prior.datum_height prior.datum_tilt prior.torsion show stage.loads stage.name stage.supports stations stations.every stock.NAME.highest stock.NAME.most stock.NAME.pieces stock.NAME.pieces.count stock.NAME.pieces.thickness support.across support.adjust support.adjust.by support.adjust.pitch support.adjust.rise support.adjust.roll support.adjust.step support.adjust.stock support.adjust.thread support.at support.bolt_rows support.bolt_rows.across support.bolt_rows.along support.expansion support.fit_up support.fit_up.pitch support.fit_up.rise support.fit_up.roll support.hangs support.holds support.material support.name support.pitch support.prior support.prior.pitch support.prior.pitch_mean support.prior.rise support.prior.rise_mean support.prior.roll support.prior.roll_mean support.prior.spring support.pulled_home support.rating support.rise support.roll support.stands support.warping title tolerance.after tolerance.confidence tolerance.level tolerance.per tolerance.source tolerance.span_ratio tolerance.stage tolerance.target_height width"
      ;;
    predict)
      words="--help --after --json"
      ;;
    fit)
      words="--help --readings --stage --book --survey --kit --json"
      ;;
    shims)
      words="--help --readings --stage --book --survey --kit --json"
      ;;
    rehearse)
      words="--help --stage --seed --rate --set-ups --daemon --book --pull --go-on --later --sinks --later-stage --no-faults --play --hush --stay --no-walk --page --seconds --verbose --json"
      ;;
    surveys)
      words="--help --json"
      ;;
    seal)
      words="--help --qr --json"
      ;;
    audit)
      words="--help --seal --json"
      ;;
    copy)
      words="--help --json"
      ;;
    export)
      words="--help --survey --out --form --json --all --raw --force"
      ;;
    report)
      words="--help --book --survey --from --to --days --tolerance --kit --card --out --paper --force --json"
      ;;
    recheck)
      words="--help --book --from --to --days --tolerance --kit --json"
      ;;
    stations)
      words="--help --stage --wanted --for --json"
      ;;
    spring)
      words="--help --support --weight --at --stage --off --on --kit --json"
      ;;
    sheet)
      words="--help --survey --kit --out --force"
      ;;
    pack)
      words="--help --out --stage --force"
      ;;
    *) words="--help --version new check explain predict fit shims rehearse surveys seal audit copy export report recheck stations spring sheet pack" ;;
  esac
  [ "$COMP_CWORD" -eq 1 ] && words="--help --version new check explain predict fit shims rehearse surveys seal audit copy export report recheck stations spring sheet pack"
  COMPREPLY=($(compgen -W "$words" -- "$current"))
}
_hangtrued() {
  COMPREPLY=($(compgen -W "--help --version --book --stage --survey --patience --page --broker --broker-version --broker-password-file --clock-ahead --json-lines" -- "${COMP_WORDS[COMP_CWORD]}"))
}
complete -o bashdefault -o default -F _hangtrue hangtrue
complete -o bashdefault -o default -F _hangtrued hangtrued
